"""The pages about horns and their places."""
