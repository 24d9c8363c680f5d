"""Lists as people have them: placements and bills in delimited text, component layers in Gerber."""
