"""The bundled sessions, and what was really said in them."""
