"""Keys and clickers: what is pressed becomes a gesture, and a gesture stands for a command."""
