"""What `import` takes from files, and what `export` writes into them."""
