"""Will it fit: by car, by part, by typed numbers, an unmarked gear; the jig."""
