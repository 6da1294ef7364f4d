"""From photographs of paper pieces to parts: the printed mat, its geometry, and the light on it."""
