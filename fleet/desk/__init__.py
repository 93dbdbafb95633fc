"""Pages that read across the slices: Today, a horn's page, the family's page. No tables and no rules of its own."""
