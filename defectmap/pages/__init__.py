"""The pages, one file each; `widgets` draws what several show, `main` is what the server runs."""
