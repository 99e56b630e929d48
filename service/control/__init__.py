"""Control: which slots of which universe a decoder listens to. Whole numbers, no database."""
