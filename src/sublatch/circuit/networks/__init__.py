"""Parts joined to networks: elements, the one solver, corners and peaks."""
