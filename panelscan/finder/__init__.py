"""Finding grids that suit a new scene, and planning a scene over pages."""
