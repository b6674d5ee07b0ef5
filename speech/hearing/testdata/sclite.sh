#!/usr/bin/env bash
# Makes sclite.pra from ref.trn and hyp.trn with NIST sclite: Debian 12's sctk 2.4.10.
cd "$(dirname "$0")" || exit 1
/usr/lib/sctk/bin/sclite -r ref.trn trn -h hyp.trn trn -i spu_id -o pra stdout | grep -E '^(id|Scores):' >sclite.pra
