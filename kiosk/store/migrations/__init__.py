"""How the tables came to be, step by step. A revision, once released, is never edited."""
