"""Files that people send: `pdfs` looks at papers as they come in, `given` gives out, `folder` and `shared` keep."""
