"""From a scene to pictures, each rendered once, and from pictures to a film file."""
