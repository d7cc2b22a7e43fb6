"""Reading scan files: ``scan_file`` is the door; source, layout, header, columns, table, order."""
