"""Do the assessors agree, beyond chance and in numbers?"""
