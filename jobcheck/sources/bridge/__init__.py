"""The controller's own files: reading values by their addresses, writing them by their spans."""
