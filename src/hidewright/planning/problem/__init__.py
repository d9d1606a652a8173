"""What must be planned: pieces and their routes, hours, people, tables, the rules of the room."""
