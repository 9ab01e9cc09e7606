"""Pages of shapes in millimetres, to PDF, SVG and PNG. Knows no markers."""
