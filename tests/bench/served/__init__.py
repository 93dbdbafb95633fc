"""What is measured from outside, on a site that is served in processes of its own."""
