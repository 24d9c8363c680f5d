"""Pictures and pages: SVG and HTML, drawn from results; every text in them is escaped."""
