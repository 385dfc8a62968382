"""The record of one batch for a certificate, also of a batch that is used up."""
