"""Page images -> panels in source pixels; the only place that converts row/column to x/y."""
