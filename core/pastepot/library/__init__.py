"""The parts library: what pieces of paper there are, where their images and pivots are, and whether all is well."""
