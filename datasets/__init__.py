"""The bundled data: an invented season, machine, riders and walks."""
