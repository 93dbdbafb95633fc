"""Pages of the cupboard taken along."""
