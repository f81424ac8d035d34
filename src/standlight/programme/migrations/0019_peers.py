from django.db import migrations


class Migration(migrations.Migration):

    dependencies = [
        ('programme', '0018_other_ears'),
    ]

    operations = []
