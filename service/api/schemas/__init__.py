"""Request and answer models of the HTTP contract."""
