"""What every slice stands on. It knows no table and no slice."""
