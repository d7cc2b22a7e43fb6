"""Where scatter comes from: lots, wafers, sites; parts, operators, repeats."""
