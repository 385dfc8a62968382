"""What all addresses of the page share: the parts they work with, the templates, the stylesheet and the scripts."""
