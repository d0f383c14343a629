"""Text in the reader's language: catalogs, numbers, dates, figures, errors."""
