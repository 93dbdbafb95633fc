"""Files that people send besides pictures: `pdfs` looks at them as they come in, `given` gives them out."""
