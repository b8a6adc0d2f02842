# Downloads Debian packages for arm64, checked by apt, and unpacks them into the
# folder it runs in, with an apt state of its own: nothing is installed.
set -e
for key in /usr/share/keyrings/debian-archive-trixie-automatic.gpg /usr/share/keyrings/debian-archive-keyring.gpg none; do
	[ ! -e "$key" ] || break
done
[ "$key" != none ] || { echo "no Debian keys in /usr/share/keyrings: install debian-archive-keyring"; exit 1; }
echo "deb [signed-by=$key] http://deb.debian.org/debian trixie-backports main" >sources.list
mkdir -p state/lists/partial cache/archives/partial
: >status
cat >apt.conf <<END
Dir::State "$PWD/state";
Dir::State::status "$PWD/status";
Dir::Cache "$PWD/cache";
Dir::Etc::sourcelist "$PWD/sources.list";
Dir::Etc::sourceparts "$PWD/none";
Dir::Etc::preferences "$PWD/none";
Dir::Etc::preferencesparts "$PWD/none";
APT::Architecture "arm64";
APT::Architectures { "arm64"; };
APT::Sandbox::User "root";
APT::Update::Error-Mode "any";
Acquire::Languages "none";
Acquire::Retries "3";
END
export APT_CONFIG="$PWD/apt.conf"
apt-get update
apt-get download "$@"
for package in *.deb; do dpkg-deb -x "$package" .; done
