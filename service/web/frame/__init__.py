"""What every page stands in: looks, words, addresses of files, refusals."""
