from .session_folder import load as load
