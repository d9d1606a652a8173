"""The end of a job: what is packed, what goes out, what stays, and who took it over."""
