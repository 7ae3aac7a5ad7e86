"""What most would build: a parent row and a row per reading by nested serializers. The measure, never a part."""
