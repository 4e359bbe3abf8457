"""The library: flat Parquet tables of pages, panels and gutters, and corrections by hand."""
