"""Paper and pictures: pages, plots, marks, forms."""
