"""How figures are set on a page: pure text, no Django, no database."""
