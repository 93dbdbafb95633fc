"""The bench's pages: a request becomes a form, an action or a page of rows."""
