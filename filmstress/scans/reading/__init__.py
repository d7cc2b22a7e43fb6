"""Reading scan files: bytes, layout, header, rows, order; ``scan_file`` is the door."""
