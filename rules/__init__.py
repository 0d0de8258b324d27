"""The bundled rule base: YAML files, one a subject."""
