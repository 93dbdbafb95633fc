"""What happens at the bench. Only here does the slice write; each action locks the horn's row first."""
