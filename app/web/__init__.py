"""The web door: pages for people, JSON for programs. It parses, calls one use case, and shows what it answered."""
