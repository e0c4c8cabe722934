"""Sample sessions of Alder Lane School, and the script that makes their sound again."""
