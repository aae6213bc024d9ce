"""The bundled sites. All of their data is invented."""
