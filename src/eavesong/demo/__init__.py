"""The whole job once, on songs and houses of our own."""
