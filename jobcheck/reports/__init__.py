"""Results of commands as text, lines, JSON and SARIF."""
