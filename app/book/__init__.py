"""The job book: parts, stock, cutting, hand over."""
