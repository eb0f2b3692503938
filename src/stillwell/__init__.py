"""Stillwell: how soon will somebody know?"""
