"""A throw-away copy of the fixture that can be harmed and put back."""

import os
import shutil
import stat
import tempfile

import fixture


class Sandbox:
    """A repository; `files`: path inside the project -> bytes, as they were at the start."""

    def __init__(self):
        self.top = tempfile.mkdtemp(prefix="mutation-")
        self.outside = tempfile.mkdtemp(prefix="mutation-outside-")
        fixture.build(self.top)
        self.root = os.path.join(self.top, fixture.PROJECT)
        self.pristine = self._listing()
        self.git_files = {name: self._read(os.path.join(self.top, ".git", name)) for name in ("index", "refs/heads/main", "info/exclude")}
        prefix = fixture.PROJECT + "/"
        self.files = {path.removeprefix(prefix): data for path, (_, data) in self.pristine.items() if path.startswith(prefix)}

    def close(self):
        shutil.rmtree(self.top)
        shutil.rmtree(self.outside)

    @staticmethod
    def _read(path):
        with open(path, "rb") as file:
            return file.read()

    def _listing(self):
        """Every file of the work tree: path -> (mode, bytes), links as (mode, target)."""
        found = {}
        for folder, folders, names in os.walk(self.top):
            if ".git" in folders:
                folders.remove(".git")
            names += [name for name in folders if os.path.islink(os.path.join(folder, name))]
            for name in names:
                full = os.path.join(folder, name)
                mode = os.lstat(full).st_mode
                data = os.readlink(full) if stat.S_ISLNK(mode) else self._read(full)
                found[os.path.relpath(full, self.top)] = (mode, data)
        return found

    def restore(self):
        """Puts everything back, the index and the branch too."""
        for folder, folders, _ in os.walk(self.top):
            if ".git" in folders:
                folders.remove(".git")
                if folder != self.top:
                    shutil.rmtree(os.path.join(folder, ".git"))
        now = self._listing()
        for path in now.keys() - self.pristine.keys():
            os.remove(os.path.join(self.top, path))
        for path, (mode, data) in self.pristine.items():
            if now.get(path) != (mode, data):
                self._replace(os.path.join(self.top, path), data, mode)
        for name, data in self.git_files.items():
            with open(os.path.join(self.top, ".git", name), "wb") as file:
                file.write(data)
        for entry in os.scandir(self.outside):
            shutil.rmtree(entry.path) if entry.is_dir(follow_symlinks=False) else os.remove(entry.path)
        for folder, _, _ in os.walk(self.top, topdown=False):
            if os.sep + ".git" not in folder and not os.listdir(folder):
                os.rmdir(folder)

    @staticmethod
    def _replace(full, data, mode):
        if os.path.isdir(full) and not os.path.islink(full):
            shutil.rmtree(full)
        elif os.path.lexists(full):
            os.remove(full)
        os.makedirs(os.path.dirname(full), exist_ok=True)
        with open(full, "wb") as file:
            file.write(data)
        os.chmod(full, stat.S_IMODE(mode))

    # ---- what mutations use: paths are inside the project -----------------------------------------------------------

    def full(self, path):
        return os.path.join(self.root, path)

    def text(self, path):
        return self.read(path).decode(errors="surrogateescape")

    def read(self, path):
        return self._read(self.full(path))

    def exists(self, path):
        return os.path.isfile(self.full(path))

    def write(self, path, data):
        full = self.full(path)
        os.makedirs(os.path.dirname(full), exist_ok=True)
        if os.path.islink(full):
            os.remove(full)
        with open(full, "wb") as file:
            file.write(data if isinstance(data, bytes) else data.encode(errors="surrogateescape"))

    def remove(self, path):
        os.remove(self.full(path))

    def git(self, *args):
        return fixture.git(self.top, *args)

    def commit(self):
        self.git("add", "-A")
        self.git("commit", "-q", "--allow-empty", "--no-verify", "-m", "Change something")
