"""The shop's room: hours, absences, skills, tables, racks, guns, air and drying."""
