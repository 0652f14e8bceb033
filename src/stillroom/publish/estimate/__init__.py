"""What the reader's page looks up: computed when a release is made, packed, and read again the same way."""
