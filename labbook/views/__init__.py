"""One view a page. A view reads through lookups, changes through actions, answers with a part."""
