"""The front of the shop: jobs, the way through a job, its header, settings, devices, copies."""
