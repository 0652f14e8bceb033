"""Pictures of what a lab found: series and words for the charts, from finished results."""
