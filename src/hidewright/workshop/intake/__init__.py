"""What came in: deliveries piece by piece, pictures, labels, and the receipt."""
