"""Cut plans of shows: worked out, kept, cut step by step, and worked out again from where they stand."""
