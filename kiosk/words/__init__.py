"""Text in the reader's language: messages, numbers, dates, units, figures, refusals and errors."""
