"""The pages of issuing, alone and in a batch, and of the agreement."""
