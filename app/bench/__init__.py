"""The bench: the canvas on which parts are laid out by hand."""
