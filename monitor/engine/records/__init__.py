"""The record of one batch for a certificate, even if the batch is used up."""
