"""Results for readers: words, data, figures.  Nothing here measures."""
