"""The main window, its document and the engine process."""
