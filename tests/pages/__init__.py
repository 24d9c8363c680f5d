"""Pictures and pages: positions, escaping, and how a browser shows them."""
