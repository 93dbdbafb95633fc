"""One document each: facts go in, a PDF comes out."""
