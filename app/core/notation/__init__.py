"""How people write things down, and what it then says: pure, without guessing."""
