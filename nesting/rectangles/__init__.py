"""Orders whose parts are all rectangles: a method of their own, with bounds."""
