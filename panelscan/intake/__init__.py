"""Files -> upright page images: sources, raster files, PDFs, archives, resolution, spreads."""
