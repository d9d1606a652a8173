"""What every page is made with: forms that count once, the middleware, pictures, the page of a running computation."""
